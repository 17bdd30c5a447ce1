package models

import "strings"

// VTECCodes returns phenomenon and significance of a P-VTEC string such as
// "/O.NEW.KMFL.SC.Y.0035.251215T2100Z-251217T0000Z/". It checks no more than
// the string's shape; the source that read the product did the rest.
func VTECCodes(s string) (phenomenon, significance string, ok bool) {
	p := strings.Split(strings.Trim(s, "/"), ".")
	if len(p) != 7 || len(p[3]) != 2 || len(p[4]) != 1 {
		return "", "", false
	}
	return p[3], p[4], true
}
