package jp2k

import (
	"encoding/binary"
	"fmt"
)

// markers of JPEG2000 table A.2.
const (
	markerSOC = 0xff4f
	markerCAP = 0xff50
	markerSIZ = 0xff51
	markerCOD = 0xff52
	markerCOC = 0xff53
	markerTLM = 0xff55
	markerPLM = 0xff57
	markerPLT = 0xff58
	markerQCD = 0xff5c
	markerQCC = 0xff5d
	markerRGN = 0xff5e
	markerPOC = 0xff5f
	markerPPM = 0xff60
	markerPPT = 0xff61
	markerCRG = 0xff63
	markerCOM = 0xff64
	markerSOT = 0xff90
	markerSOD = 0xff93
	markerEOC = 0xffd9
)

// header is what the marker segments say.
type header struct {
	width, height, depth int

	levels    int // of decomposition
	xcb, ycb  int // logarithms of the largest code block
	precincts [33]uint8
	guard     int // guard bits
	exponents []byte
	quantRank int  // where they come from: a tile's word holds over the image's, QCC over QCD
	inTile    bool // reading a tile-part's header
}

// scanner walks the marker segments.
type scanner struct {
	src []byte
	at  int
}

func (s *scanner) bad(format string, args ...any) error {
	return &SyntaxError{s.at, fmt.Sprintf(format, args...)}
}

// segment reads a marker and, unless it stands alone, its segment.
func (s *scanner) segment() (marker int, body []byte, err error) {
	if len(s.src)-s.at < 2 {
		return 0, nil, s.bad("the code stream ends where a marker is due")
	}
	marker = int(binary.BigEndian.Uint16(s.src[s.at:]))
	switch marker {
	case markerSOC, markerSOD, markerEOC:
		s.at += 2
		return marker, nil, nil
	}
	if marker < 0xff4f {
		return 0, nil, s.bad("0x%04x where a marker is due", marker)
	}
	if len(s.src)-s.at < 4 {
		return 0, nil, s.bad("the code stream ends inside a marker segment")
	}
	n := int(binary.BigEndian.Uint16(s.src[s.at+2:]))
	if n < 2 || n > len(s.src)-s.at-2 {
		return 0, nil, s.bad("marker segment 0x%04x of %d octets, %d are left", marker, n, len(s.src)-s.at-2)
	}
	body = s.src[s.at+4 : s.at+2+n]
	s.at += 2 + n
	return marker, body, nil
}

// parseHeaders reads the marker segments and returns what they say with the
// packets of all tile-parts.
func parseHeaders(src []byte) (h *header, packets []byte, packetsAt int, err error) {
	s := scanner{src: src}
	marker, _, err := s.segment()
	if err != nil || marker != markerSOC {
		return nil, nil, 0, &SyntaxError{0, "no start of a code stream (0xff4f)"}
	}
	h = &header{}
	start := s.at
	marker, body, err := s.segment()
	if err != nil {
		return nil, nil, 0, err
	}
	if marker != markerSIZ {
		return nil, nil, 0, &SyntaxError{start, "no image size (SIZ) behind the start"}
	}
	if err := h.size(body, start); err != nil {
		return nil, nil, 0, err
	}
	seen := map[int]bool{}
	parts := 0
	for {
		start = s.at
		if marker, body, err = s.segment(); err != nil {
			if parts > 0 && len(src)-start < 2 {
				return h, packets, packetsAt, nil // the end marker is missing, no data are
			}
			return nil, nil, 0, err
		}
		switch marker {
		case markerEOC:
			if parts == 0 {
				return nil, nil, 0, &SyntaxError{start, "the code stream ends without a tile"}
			}
			return h, packets, packetsAt, nil
		case markerSOT:
			if !seen[markerCOD] || !seen[markerQCD] {
				return nil, nil, 0, &SyntaxError{start, "a tile before the coding style (COD) and the quantisation (QCD)"}
			}
			part, partAt, err := h.tilePart(&s, body, start)
			if err != nil {
				return nil, nil, 0, err
			}
			if parts == 0 {
				packets, packetsAt = part, partAt
			} else {
				packets = append(packets[:len(packets):len(packets)], part...)
			}
			parts++
		default:
			if parts > 0 {
				return nil, nil, 0, &SyntaxError{start, fmt.Sprintf("marker 0x%04x between tile-parts", marker)}
			}
			seen[marker] = true
			if err := h.segment(marker, body, start); err != nil {
				return nil, nil, 0, err
			}
		}
	}
}

// tilePart reads the rest of a tile-part's header and returns its packets.
func (h *header) tilePart(s *scanner, sot []byte, start int) (packets []byte, at int, err error) {
	if len(sot) != 8 {
		return nil, 0, &SyntaxError{start, fmt.Sprintf("start of a tile-part (SOT) of %d octets, want 8", len(sot))}
	}
	if tile := binary.BigEndian.Uint16(sot); tile != 0 {
		return nil, 0, &SyntaxError{start, fmt.Sprintf("tile %d in an image of one tile", tile)}
	}
	end := len(s.src)
	if length := int(binary.BigEndian.Uint32(sot[2:])); length > 0 {
		if length > len(s.src)-start {
			return nil, 0, &SyntaxError{start, fmt.Sprintf("a tile-part of %d octets, %d are left", length, len(s.src)-start)}
		}
		end = start + length
	} else if n := len(s.src); n-s.at >= 2 && binary.BigEndian.Uint16(s.src[n-2:]) == markerEOC {
		end = n - 2
	}
	h.inTile = true
	for {
		at := s.at
		marker, body, err := s.segment()
		if err != nil {
			return nil, 0, err
		}
		if marker == markerSOD {
			break
		}
		if marker == markerSOT || marker == markerEOC {
			return nil, 0, &SyntaxError{at, "a tile-part without data (SOD)"}
		}
		if err := h.segment(marker, body, at); err != nil {
			return nil, 0, err
		}
	}
	if s.at > end {
		return nil, 0, &SyntaxError{start, "a tile-part shorter than its header"}
	}
	at = s.at
	s.at = end
	return s.src[at:end], at, nil
}

// segment takes in a marker segment of a main or tile-part header.
func (h *header) segment(marker int, body []byte, at int) error {
	switch marker {
	case markerCOD:
		return h.codingStyle(body, at)
	case markerQCD:
		return h.quantisation(body, at, 1)
	case markerQCC:
		if len(body) < 1 || body[0] != 0 {
			return &SyntaxError{at, "quantisation (QCC) of a component that is not there"}
		}
		return h.quantisation(body[1:], at, 2)
	case markerCOM, markerTLM, markerPLM, markerPLT, markerCRG:
		return nil // comments, lengths, registration: nothing that decoding needs
	case markerSIZ:
		return &SyntaxError{at, "a second image size (SIZ)"}
	case markerCAP:
		return &UnsupportedError{at, "an extended capability (CAP)"}
	case markerCOC:
		return &UnsupportedError{at, "a component's own coding style (COC)"}
	case markerRGN:
		return &UnsupportedError{at, "a region of interest (RGN)"}
	case markerPOC:
		return &UnsupportedError{at, "a change of progression order (POC)"}
	case markerPPM, markerPPT:
		return &UnsupportedError{at, "packing of packet headers (PPM, PPT)"}
	}
	return &UnsupportedError{at, fmt.Sprintf("marker 0x%04x", marker)}
}

// size reads SIZ (JPEG2000 A.5.1).
func (h *header) size(b []byte, at int) error {
	if len(b) < 36 {
		return &SyntaxError{at, fmt.Sprintf("image size (SIZ) of %d octets, want at least 36", len(b))}
	}
	long := func(i int) int { return int(binary.BigEndian.Uint32(b[i:])) }
	width, height := long(2), long(6)
	x0, y0 := long(10), long(14)
	tileWidth, tileHeight, tileX, tileY := long(18), long(22), long(26), long(30)
	components := int(binary.BigEndian.Uint16(b[34:]))
	if len(b) != 36+3*components {
		return &SyntaxError{at, fmt.Sprintf("image size (SIZ) of %d octets for %d components", len(b), components)}
	}
	switch {
	case components != 1:
		return &UnsupportedError{at, fmt.Sprintf("an image of %d components", components)}
	case x0 != 0 || y0 != 0 || tileX != 0 || tileY != 0:
		return &UnsupportedError{at, "an image or tile offset"}
	case width == 0 || height == 0:
		return &SyntaxError{at, fmt.Sprintf("an image of %d by %d samples", width, height)}
	case tileWidth < width || tileHeight < height:
		return &UnsupportedError{at, "an image of several tiles"}
	case width > MaxSamples/height:
		return &UnsupportedError{at, fmt.Sprintf("an image of %d by %d samples", width, height)}
	case b[36]&0x80 != 0:
		return &UnsupportedError{at, "an image of signed samples"}
	case b[37] != 1 || b[38] != 1:
		return &UnsupportedError{at, "a subsampled image"}
	}
	h.width, h.height, h.depth = width, height, int(b[36])+1
	if h.depth > maxDepth {
		return &UnsupportedError{at, fmt.Sprintf("an image of %d bits a sample", h.depth)}
	}
	return nil
}

// codingStyle reads COD (JPEG2000 A.6.1).
func (h *header) codingStyle(b []byte, at int) error {
	if len(b) < 10 {
		return &SyntaxError{at, fmt.Sprintf("coding style (COD) of %d octets, want at least 10", len(b))}
	}
	var (
		style       = b[0]
		progression = b[1]
		layers      = binary.BigEndian.Uint16(b[2:])
		transform   = b[4]
	)
	h.levels = int(b[5])
	h.xcb, h.ycb = int(b[6]&15)+2, int(b[7]&15)+2
	switch {
	case style&^1 != 0:
		return &UnsupportedError{at, "packet markers (SOP, EPH)"}
	case progression > 2:
		return &UnsupportedError{at, fmt.Sprintf("progression order %d", progression)}
	case layers != 1:
		return &UnsupportedError{at, fmt.Sprintf("an image of %d layers", layers)}
	case transform != 0:
		return &UnsupportedError{at, "a component transform"}
	case h.levels > 32:
		return &SyntaxError{at, fmt.Sprintf("%d decomposition levels, want at most 32", h.levels)}
	case h.xcb > 10 || h.ycb > 10 || h.xcb+h.ycb > 12:
		return &SyntaxError{at, fmt.Sprintf("code blocks of 2^%d by 2^%d", h.xcb, h.ycb)}
	case b[8] != 0:
		return &UnsupportedError{at, fmt.Sprintf("code block style 0x%02x", b[8])}
	case b[9] != 1:
		return &UnsupportedError{at, "the irreversible wavelet (9/7)"}
	}
	if style&1 == 0 {
		for r := range h.precincts {
			h.precincts[r] = 0xff
		}
		return nil
	}
	sizes := b[10:]
	if len(sizes) < h.levels+1 {
		return &SyntaxError{at, fmt.Sprintf("%d precinct sizes for %d resolutions", len(sizes), h.levels+1)}
	}
	copy(h.precincts[:h.levels+1], sizes)
	for r, size := range sizes[1 : h.levels+1] {
		if size&15 == 0 || size>>4 == 0 {
			return &SyntaxError{at, fmt.Sprintf("precincts of one sample at resolution %d", r+1)}
		}
	}
	return nil
}

// quantisation reads the end of QCD or QCC that both share (JPEG2000 A.6.4).
func (h *header) quantisation(b []byte, at, rank int) error {
	if h.inTile {
		rank += 2
	}
	if len(b) < 1 {
		return &SyntaxError{at, "empty quantisation (QCD, QCC)"}
	}
	if b[0]&31 != 0 {
		return &UnsupportedError{at, "quantisation"}
	}
	if rank >= h.quantRank {
		h.quantRank, h.guard, h.exponents = rank, int(b[0]>>5), b[1:]
	}
	return nil
}

// planes is the number of magnitude bit planes of a band, counted as the
// exponents are: 0 is LL, then HL, LH, HH of each resolution (JPEG2000 E-2).
func (h *header) planes(band int) (int, error) {
	if band >= len(h.exponents) {
		return 0, &SyntaxError{0, fmt.Sprintf("quantisation of %d bands for %d levels", len(h.exponents), h.levels)}
	}
	planes := h.guard + int(h.exponents[band]>>3) - 1
	if planes > maxPlanes {
		return 0, &UnsupportedError{0, fmt.Sprintf("a band of %d bit planes", planes)}
	}
	return planes, nil
}
