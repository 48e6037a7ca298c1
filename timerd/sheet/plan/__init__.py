"""Print, bench and paper to steps with doses, seconds, cues and prompts.

Decided:

- **Several bases of one light**: a burn counts over their sum, unless `over:` names one. Where they are of several
  negatives it must; a burn in seconds then has no stops of its own. Totals count each negative by itself, over all
  its bases of the light.
- **A `safelight` step** is a prompt: the sheet lies under the safelight alone until a press. The bench does not time
  it.
- **`hands`** is a key of the print: whoever prints it has two, a helper makes it more.
"""
