"""Bytes of one picture -> array (h, w, c). Called by `load.pixels`, which guards memory and names the errors."""
