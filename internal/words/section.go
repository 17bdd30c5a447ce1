package words

// Section is a headed part of what is told, before it is set as text or as a
// page. Its fields are told in their order.
type Section struct {
	Head string
	// Lines are paragraphs.
	Lines []string
	Table *Table
	// Verbatim is the words of an official product, line by line; Quote is
	// somebody's words, set apart.
	Verbatim, Quote string
	// Items stand in a list; Ticks in a list with a box to tick off by hand.
	Items, Ticks []string
	Links        []Link
}

// Link is an address with the words for it.
type Link struct{ Words, URL string }

// Table is a small table.
type Table struct {
	Head []string
	Rows [][]Cell
}

// Cell is one place of a table.
type Cell struct {
	Words string
	// Bar stands beside the words where the cell is a grade: as many full
	// blocks as it is good, then light ones, three in all. Empty where the
	// cell is no grade.
	Bar string
	// Span is how many columns it takes; 0 is one.
	Span int
}

// fullBar is how many blocks a bar has, and what they are.
const (
	fullBar    = 3
	fullBlock  = "█"
	emptyBlock = "░"
)

// list is a section with a list, none where the list is empty.
func list(head string, items []string) []Section {
	if len(items) == 0 {
		return nil
	}
	return []Section{{Head: head, Items: items}}
}

func cells(words ...string) []Cell {
	row := make([]Cell, len(words))
	for i, w := range words {
		row[i].Words = w
	}
	return row
}
