"""The same page in every viewer at hand: the same ink, and marks at their true places."""
