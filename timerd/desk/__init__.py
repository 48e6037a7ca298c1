"""Lights-on tools. The only place with numpy, scipy, matplotlib and Pillow; imported by cli alone, lazily."""
