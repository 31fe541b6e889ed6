"""The watch daemon: waits, wakes, and walks drops through the gates.

setup.py     what a gate is made of, as the configuration gives it
one_gate.py  one gate: open or shut, and one pass of it
inbox_looks.py, drops_in_hand.py, gate_shared.py   its parts: looking; drops between inbox and target; what both share
gates.py     which gates are served: they come, go and move with the configuration
loop.py      all gates in turn until told to stop, or until the inboxes are drained
held_up.py   what does not move and why, for status
wake.py      native events or polling; both only say "look again"
workers.py   separate processes with limits that do the examining
notify.py    tells the service manager (sd_notify)
log.py       text or JSON lines
"""
