"""The journal: everything that came from a gauge, and what the job made of it.

An entry is written before the reading is acknowledged, and never changed or
removed afterwards: a reading that is taken back is followed by an entry that
says so. What a job looks like now is the sum of its entries, so a job opens
again where it stood, whatever ended the program::

    GaugeEvent, Act -> codec -> row -> journal (SQLite)          write, then commit
    GaugeEvent, Act <- codec <- row <- journal                   load, events

``commit`` returns when the rows are on the disk; only then may anything be said.

Beside the entries lie the facts of a job (``facts``, ``fact_book``: what it is, each version
of its results, the spring chosen, what was seen afterwards), the sizes it is found again by
(``dimensions``), the records of the gauges and the stock. ``exporting`` and ``importing``
carry jobs from one file to another, ``copies`` and ``rescue`` the whole file.
"""
