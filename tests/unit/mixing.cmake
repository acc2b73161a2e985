# Unit tests of mixing.
