"""What the maker describes: spec, profiles, wing, ribs, fittings, panels."""
