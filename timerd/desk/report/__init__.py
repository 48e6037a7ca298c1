"""A print, or a sheet and what it was given, as one page that needs nothing else: no network, no script."""
