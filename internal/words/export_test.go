package words

// Parts lists all parts in the order in which they are told. The opening, the
// warnings and the verdict, stands first in every form of a call.
func Parts() []Part { return append(opening(), afterOpening()...) }
