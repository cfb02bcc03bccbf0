"""The invented cars. Everything here is made up and says so."""
