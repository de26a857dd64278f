"""Which spring of the stock to fit, what it will do, and how sure that is."""
