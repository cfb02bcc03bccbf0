"""Questions, alternatives, evidence, forecasts, what a revision moved."""
