"""The full-screen app. The only room that imports Textual."""
