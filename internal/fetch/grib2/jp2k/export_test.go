package jp2k

// Depth is the number of bits a sample, 1 to 28.
func (m *Image) Depth() int { return m.depth }
