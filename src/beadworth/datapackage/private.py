"""What never leaves a bench in a text: folders of somebody's computer, e-mail addresses."""

from __future__ import annotations

import re

LEFT_OUT = "[left out]"
_PRIVATE = re.compile(
    r"""
      [\w.+-]+@[\w-]+(?:\.[\w-]+)+            # an e-mail address
    | file://\S*
    | (?<![\w/])~(?:[A-Za-z][\w.-]*)?/\S*    # a home folder
    | (?<![\w/:])/(?:[\w.@+-]+/)+[\w.@+-]*    # an absolute path of two parts or more
    | (?<!\w)[A-Za-z]:[\\/](?!/)\S*           # a drive letter
    | \\\\[\w.-]+\\\S*                        # a shared folder
    """,
    re.VERBOSE,
)


def without_private(text: str) -> str:
    """The text with paths and e-mail addresses replaced by ``[left out]``."""
    return _PRIVATE.sub(LEFT_OUT, text)
