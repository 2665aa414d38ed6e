"""The gate driven at random against a plain model of what must not start, written apart from it.

The model keeps a dozen facts in plain fields (who has the jaws, what they were cut to, when the chuck was greased, what
it truly gives) and says from them alone whether anything stands against the job, and what the chuck gives.  The program
is told the same story through records, clock and setup files, some of it wrong on purpose: one grip reading in four is
up to 40 % high.  It must find something against the job exactly where the model does, and never count on more grip than
there is.
"""
