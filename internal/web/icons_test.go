package web_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// The mark: a kite (a square on its corner), its line, and the boat (a dot)
// over the water (a bar). Places are shares of the side; everything lies
// within the middle 80 % that a mask leaves (W3C Web Application Manifest,
// safe zone).
const (
	kiteX, kiteY, kiteR = 0.700, 0.300, 0.120
	boatX, boatY, boatR = 0.280, 0.680, 0.045
	lineWidth           = 0.016
	waterY, waterW      = 0.755, 0.030
	waterFrom, waterTo  = 0.200, 0.800
)

func iconSVG() []byte {
	n := func(v float64) string { return fmt.Sprintf("%.4g", v*100) }
	return fmt.Appendf(nil, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100"><rect width="100" height="100" fill="#fcfcfa"/>`+
		`<g fill="none" stroke="#101010" stroke-width="%s"><path d="M%s %sL%s %s"/><path d="M%s %sH%s"/></g>`+
		`<g fill="#101010"><path d="M%s %sL%s %sL%s %sL%s %sZ"/><circle cx="%s" cy="%s" r="%s"/></g></svg>`+"\n",
		n(lineWidth), n(kiteX), n(kiteY), n(boatX), n(boatY), n(waterFrom), n(waterY), n(waterTo),
		n(kiteX-kiteR), n(kiteY), n(kiteX), n(kiteY-kiteR), n(kiteX+kiteR), n(kiteY), n(kiteX), n(kiteY+kiteR),
		n(boatX), n(boatY), n(boatR))
}

// iconPNG draws the mark with 4 by 4 samples a pixel.
func iconPNG(t *testing.T, size int) []byte {
	t.Helper()
	inside := func(x, y float64) bool {
		if math.Abs(x-kiteX)+math.Abs(y-kiteY) <= kiteR || math.Hypot(x-boatX, y-boatY) <= boatR {
			return true
		}
		if math.Abs(y-waterY) <= waterW/2 && x >= waterFrom && x <= waterTo {
			return true
		}
		dx, dy := boatX-kiteX, boatY-kiteY
		along := ((x-kiteX)*dx + (y-kiteY)*dy) / (dx*dx + dy*dy)
		return along >= 0 && along <= 1 && math.Hypot(x-kiteX-along*dx, y-kiteY-along*dy) <= lineWidth/2
	}
	img := image.NewGray(image.Rect(0, 0, size, size))
	for py := range size {
		for px := range size {
			hits := 0
			for s := range 16 {
				if inside((float64(px)+(float64(s%4)+.5)/4)/float64(size), (float64(py)+(float64(s/4)+.5)/4)/float64(size)) {
					hits++
				}
			}
			img.SetGray(px, py, color.Gray{Y: uint8(0xfc - (0xfc-0x10)*hits/16)})
		}
	}
	var b bytes.Buffer
	require.NoError(t, (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, img))
	return b.Bytes()
}

// The icons are drawn by our own code: FORECASTD_UPDATE=1 draws them anew.
func TestIconsAreDrawnFromTheOneMark(t *testing.T) {
	want := map[string][]byte{"icon.svg": iconSVG(), "icon-192.png": iconPNG(t, 192), "icon-512.png": iconPNG(t, 512)}
	for name, b := range want {
		if os.Getenv("FORECASTD_UPDATE") != "" {
			require.NoError(t, os.WriteFile("static/"+name, b, 0o644))
		}
		got, err := os.ReadFile("static/" + name)
		require.NoError(t, err)
		if name == "icon.svg" {
			require.Equal(t, string(b), string(got))
			continue
		}
		// Pictures are compared, not files: what packs them may change.
		wanted, err := png.Decode(bytes.NewReader(b))
		require.NoError(t, err)
		have, err := png.Decode(bytes.NewReader(got))
		require.NoError(t, err)
		require.Equal(t, wanted.Bounds(), have.Bounds())
		require.Equal(t, wanted.(*image.Gray).Pix, have.(*image.Gray).Pix, name)
	}
}
