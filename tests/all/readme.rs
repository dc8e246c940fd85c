// The README's commands.
