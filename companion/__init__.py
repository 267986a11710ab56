"""The companion: what happens between visits to a practice that fits overnight orthokeratology lenses."""

__version__ = "0.1.0"
