"""The rules behind the findings, one small function a rule, one file a theme."""

#: A threshold that builders use and no document states.
COMMON_PRACTICE = "common practice, no source"
