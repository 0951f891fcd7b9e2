"""Questions whose answers are kept by all that they are made of."""


class AlikeByContent:
    """Two questions are alike whose `content` is: as keys of what is kept, whatever objects they hold."""

    def __eq__(self, other):
        return self.content == other.content

    def __hash__(self):
        return hash(self.content)
