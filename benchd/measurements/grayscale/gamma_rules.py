"""What the gamma of a step means, in the words of every view."""

POINT_RULE = "point gamma: ln(L / Lwhite) / ln V, black not subtracted"
"""What every view shows as the gamma of a step."""
LOCAL_RULE = "local gamma: slope of ln(L - Lblack) on ln V from this step to the next, black subtracted"
