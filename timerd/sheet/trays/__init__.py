"""The wet side: sheets in their baths, each on a timeline of its own. No clock, no line, no file.

`machine.Trays` is the machine: presses, times and temperatures in, records and cues out; it knows no light. `stays` is
the account of the sheets in the trays, `stock` that of what the baths have taken: both are folds over records.
`timeline` says when a stay asks for what, `needs` finds what two sheets need at once. `telling.trays` has the words.
"""
