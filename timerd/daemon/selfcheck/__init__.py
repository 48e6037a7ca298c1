"""What is right and what is wrong on this machine: questions put to it, and what the answers mean. Nothing is lit."""
