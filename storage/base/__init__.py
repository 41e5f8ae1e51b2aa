"""What every query stands on: engine, transactions, statements, errors, small values."""
