"""Lets the tests of this folder import the plain reader beside them."""
