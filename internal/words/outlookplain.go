package words

import (
	"reflect"
	"strings"

	"forecastd/internal/models"
)

// plainFile cleans every text of an outlook file, which anybody may have
// written: in one line, but for official texts.
func plainFile(f *outlookFile) { plainValue(reflect.ValueOf(f).Elem(), false) }

func plainValue(v reflect.Value, text bool) {
	switch v.Kind() { //nolint:exhaustive // the rest holds no text
	case reflect.String:
		if text {
			v.SetString(models.PlainText(v.String()))
		} else {
			v.SetString(models.PlainLine(v.String()))
		}
	case reflect.Slice:
		for i := range v.Len() {
			plainValue(v.Index(i), text)
		}
	case reflect.Struct:
		if said, ok := v.Interface().(models.Opt[string]); ok {
			v.Set(reflect.ValueOf(models.MapOpt(said, models.PlainLine)))
			return
		}
		for i := range v.NumField() {
			field := v.Type().Field(i)
			if !field.IsExported() {
				continue
			}
			name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
			plainValue(v.Field(i), name == "text" || name == "body" || name == "instruction")
		}
	case reflect.Pointer:
		if !v.IsNil() {
			plainValue(v.Elem(), text)
		}
	}
}
