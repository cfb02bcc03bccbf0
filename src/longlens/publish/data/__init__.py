"""The data of an edition: tables, the model, hardpoints, the exchange document, the manifest."""
