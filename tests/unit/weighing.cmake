# Unit tests of weighing.
