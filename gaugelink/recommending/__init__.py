"""The one answer: what to order or take, what it rests on, how sure it is, what stops it."""
