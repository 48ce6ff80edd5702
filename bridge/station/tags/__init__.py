"""The tag side: which tag belongs to which stay."""
