"""Joins the stages: from a journaled job to summaries, and on to the inputs of the sizing.

``job`` reads a job once and hands out what follows from it. Behind it, ``parts`` folds the
acts into series and summaries, and ``quantities`` gives them their uncertainty and says what
a result must say of the gauges and parts behind it. ``reviewing`` looks at a series while
the gauge is still in the hand.
"""
