# Unit tests of drivers.
