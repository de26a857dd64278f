"""Joins the stages: from a journaled job to summaries, and on to the inputs of the sizing.

``parts`` folds the acts of a job into series and summaries, ``quantities`` gives them
their uncertainty, ``doubts`` says what a result must say of the gauges and parts behind
it, and ``reviewing`` looks at a series while the gauge is still in the hand.
"""
