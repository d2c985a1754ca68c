"""What the codes of bright windows request, computed again with an independent library."""

from benchd.analysis.light.windows_cross_check import cross_check

PART = cross_check
