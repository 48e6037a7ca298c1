"""A print, or a sheet and what it was given, as one page that needs nothing else: no network, no script.

Decided:

- **A report is HTML that is escaped by construction** (`markup.tag`): text cannot become markup, so no template can
  forget it. Control characters and direction marks are shown, texts that somebody wrote are isolated (`bdi`), a
  policy in the page forbids scripts and anything from elsewhere. A template library would have been one more thing
  to trust.
- **A report needs no `desk` extra** but for its proof: pictures are SVG in percent, so that text keeps its size on a
  phone.
- **A report's red style is its own variables**, held by a screenshot without a green or blue pixel; paper is always
  white.
"""
