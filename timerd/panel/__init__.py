"""What the printer sees and hears in the dark, in a process of its own. The only place with pygame."""
