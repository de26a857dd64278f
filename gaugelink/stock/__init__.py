"""The springs on hand: what one is, and how a list of them is read and checked."""
