"""HDR colours at several luminances against what their codes request (ITU-R BT.2124)."""
