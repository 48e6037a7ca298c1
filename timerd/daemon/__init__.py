"""The daemon: engine, keeper, book and socket, tied together. It has no line, no picture and no sound."""
