# Unit tests of records.
