"""What is known: records, the one file they live in, its journal, photographs coming in, the exchange form."""
