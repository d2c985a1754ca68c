"""HDR colours at several luminances against what their codes ask for (ITU-R BT.2124)."""
