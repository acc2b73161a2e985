# Unit tests of station.
