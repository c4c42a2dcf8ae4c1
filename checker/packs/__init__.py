"""Rule packs: read, layered, and compiled into rules ready for judging."""
