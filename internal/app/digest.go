package app

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"hash"
	"math"
	"reflect"
	"slices"
	"time"
)

// digest stands for all values that something was worked out from: of the same
// values it is the same, of others another.
type digest [sha256.Size]byte

// digestOf digests values, whatever they hold, but for when things were
// fetched: an answer that says the same again is no news. It is unknown where
// a value can't be compared with another of its kind, as a function can't.
func digestOf(values ...any) (digest, bool) {
	d := digester{sum: sha256.New(), fields: map[reflect.Type][]int{}}
	for _, v := range values {
		d.value(reflect.ValueOf(v))
	}
	d.sum.Write(d.buf)
	var out digest
	d.sum.Sum(out[:0])
	return out, !d.unsure
}

type digester struct {
	sum    hash.Hash
	buf    []byte
	fields map[reflect.Type][]int // those that count, by type
	unsure bool
}

func (d *digester) number(n uint64) {
	d.buf = binary.LittleEndian.AppendUint64(d.buf, n)
	if len(d.buf) >= 1<<13 {
		d.sum.Write(d.buf)
		d.buf = d.buf[:0]
	}
}

func (d *digester) text(s string) {
	d.number(uint64(len(s)))
	d.buf = append(d.buf, s...)
}

func (d *digester) value(v reflect.Value) {
	switch v.Kind() {
	case reflect.Invalid:
		d.number(0)
	case reflect.Bool:
		n := uint64(0)
		if v.Bool() {
			n = 1
		}
		d.number(n)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		d.number(uint64(v.Int()))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Uintptr:
		d.number(v.Uint())
	case reflect.Float32, reflect.Float64:
		d.number(math.Float64bits(v.Float()))
	case reflect.String:
		d.text(v.String())
	case reflect.Slice, reflect.Array:
		d.number(uint64(v.Len()))
		for i := range v.Len() {
			d.value(v.Index(i))
		}
	case reflect.Struct:
		for _, i := range d.counting(v.Type()) {
			d.value(v.Field(i))
		}
	case reflect.Map:
		d.mapping(v)
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			d.number(0)
			return
		}
		d.text(v.Elem().Type().String())
		d.value(v.Elem())
	case reflect.Func, reflect.Chan, reflect.UnsafePointer, reflect.Complex64, reflect.Complex128:
		d.unsure = d.unsure || v.Kind() != reflect.Func || !v.IsNil()
	}
}

// mapping digests the entries of a map in an order of their own.
func (d *digester) mapping(v reflect.Value) {
	var entries [][]byte
	for it := v.MapRange(); it.Next(); {
		e := digester{sum: sha256.New(), fields: d.fields}
		e.value(it.Key())
		e.value(it.Value())
		e.sum.Write(e.buf)
		d.unsure = d.unsure || e.unsure
		entries = append(entries, e.sum.Sum(nil))
	}
	slices.SortFunc(entries, bytes.Compare)
	d.number(uint64(len(entries)))
	for _, e := range entries {
		d.buf = append(d.buf, e...)
	}
}

// counting are the fields of a struct that count: all but when it was fetched,
// and of a place on the clock its name.
func (d *digester) counting(t reflect.Type) []int {
	list, ok := d.fields[t]
	if ok {
		return list
	}
	for i := range t.NumField() {
		name := t.Field(i).Name
		if name != "Fetched" && (t != reflect.TypeFor[time.Location]() || name == "name") {
			list = append(list, i)
		}
	}
	d.fields[t] = list
	return list
}
