"""Print, bench and paper to steps with doses, seconds, cues and prompts."""
