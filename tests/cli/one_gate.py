"""The configuration of one gate that waits for nothing."""

CONFIG = """
[[gate]]
name = "quayside"
inbox = "in"
delivery = "out"
returned = "back"
aside = "aside"
work = "work"
quiet_seconds = 0.1
wait_for_textures_seconds = 0.1
"""
