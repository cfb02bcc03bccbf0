"""The film: scenes in time, frames, segments that survive a kill, captions and chapters."""
