"""What tests and measurements of real lines share: pins that remember, and a real keeper's process."""
