"""The recordings that ``gaugelink demo`` plays: an invented bench, made by a script.

The barrel, its spring and the hands are invented and belong to no watch. The script
is ``fixtures/make_demo.py``.
"""
