"""The screens: results become view models, view models become charts and words."""
