"""Renders the demo's photographs of the invented cars. Needs the extra ``render``; see docs/demo.md."""
