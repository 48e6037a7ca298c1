"""The durable record: what each sheet was given, appended and never changed.

What is where:

    store       SQLite, one writer; writing is its thread
    rows        a record as a row, with its checksum (pure); unfit: records that do not fold, and which it is
    reading     a sheet's records, plan and history; the backup. present: what a start goes on from
    listing     many sheets at once, none of them folded; doubts: those that somebody must look at
    trays       what a start needs of the trays, on this boot's clock
    copying     the copy of an evening, as a process of its own makes it
    remarks     notes and ratings (pure)
    carrying    sheets as CSV and JSON Lines; checking: the file by SQLite, the sheets by folding them
    pages       the rows of a SQLite file, page by page; rescue makes a new book of them

Decided:

- **A list of sheets is kept nowhere.** It is read from the `armed` records and from an index of the book that has
  the kinds of all others: so it cannot be out of date, an old book has it too, and a crash cannot spoil it. How a
  sheet ended comes from the one fold, by the few kinds that it goes by.
- **A record's checksum is one more of its facts**, the last: so the format is still 1, an old book goes on, and a
  version before this reads a new one. It has how far back the sheet's record before lies, since one that is missing
  would owe a dose that was given; the plan's checksum is in the `armed` record, an opening's behind the boot's name.
  An opening with one says that all its records have one. CRC-32: against bits that flip, not against people.
- **A damaged sheet is left out, not mended**: no progress, no offer, no plan; out until it is given up. Its number
  is not given again. A damaged record of no sheet is told and passed over, but a fault: that it stays until it is
  cleared.
- **A copy is a process**, not a thread: a stick that hangs holds a thread in the kernel, and the daemon with it, and
  a copy's check would take turns with the loop. Killed at any moment it leaves a file beside, which the next one
  takes away. Copies go by how far they go, not by their dates: a board without a clock may have any.
- **A start reads the newest records twice**, by the indexes and as they lie: an index entry that flips loses a
  record, and nothing in the rows would say so.
- **Notes and ratings are records** of kinds that the fold does not know, so the format is still 1. They wait for the
  dark: while a light burns nothing else may keep the disk from it. One at a time is on its way.
- **A sheet's times** are the monotonic ones, counted from the wall clock read nearest before: with the record, when
  the sheet was armed, when the book was opened. So they are right to the second, and steps of the wall clock cannot
  reorder them.
- **The rescue reads pages, not trees**: a row lies whole on a leaf, so every page that can be read gives its rows.
  The new book takes only sheets whose records fit together; the rest is in the text beside it.
- **A main file shorter than its head says** is refused unless its log has all the rest: SQLite would open it, and
  write.
"""
