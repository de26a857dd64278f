"""One file that holds it all: jobs with every event and act, facts, gauges, and the stock.

An entry of the journal is written before the reading is acknowledged, and never changed or
removed afterwards: a reading that is taken back is followed by an entry that says so. What a
job looks like now is the sum of its entries, so it opens again where it stood, whatever
ended the program::

    GaugeEvent, Act -> entries -> codec -> row -> journal (SQLite)     write, then commit
    GaugeEvent, Act <- entries <- codec <- row <- lookup               load, events

``commit`` returns when the rows are on the disk; only then may anything be said.

``schema`` has the tables and ``book`` what all rooms do alike with the file. ``codec`` keeps
things as JSON under names that the room that keeps them declares: ``entries``, ``facts`` (what
was said of a job, each version of its results, the spring chosen, what was seen afterwards;
``predictions`` sets one beside the other), ``gauge_book`` and ``stock_book``. ``sizes`` finds
the jobs of a like barrel. ``export`` carries jobs from one file to another in the form of
``export_format``, ``copies`` and ``rescue`` the whole file.
"""
