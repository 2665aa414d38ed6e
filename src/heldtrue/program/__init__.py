"""Word-address lathe programs that bore jaws: write, read back, prove.

``program(job)`` in ``front`` is the one way in: job to tool path (``path``), to text in the words of the shop's control
(``write``, ``dialect``), back by a reader that knows nothing of the path (``read``), through the metal (``prove``).
"""
