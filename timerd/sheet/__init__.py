"""What should happen to a sheet of paper and what did. Pure: no clock, file, pin or thread."""
