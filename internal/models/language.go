package models

// Language is a language that people read, by its code.
type Language string

// Languages by name, where code has to tell one from the others.
const (
	English Language = "en"
	Spanish Language = "es"
)

// Languages lists the languages that anybody can be told in. Each has a file
// of its name in internal/words/catalogue.
func Languages() []Language { return []Language{English, Spanish, "pt"} }
