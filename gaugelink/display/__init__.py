"""The bench display: a page that shows a running job on any screen of the bench, and its buttons.

The thread that measures lays its snapshots on a board with one slot, the latest wins; a thread a
viewer takes them from there, so that no viewer is waited for. Only ``server`` knows HTTP.
Nothing here is loaded without ``--display``.
"""
