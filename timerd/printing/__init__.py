"""Pure arithmetic of the darkroom: stops and light. No clock, file, pin or thread is used here."""
