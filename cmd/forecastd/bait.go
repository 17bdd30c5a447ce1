package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

const aboutBait = `
Keeps how many baits of a kind are in the pen now; the others stay as they
were counted last, and 0 takes a kind out. Any word of the trade names a kind:
gogs are goggle-eyes. Of several lots of a kind -source tells which was
counted; -another counts one beside them. Without arguments it shows the last
count. The calls say what is short by it, hardy and delicate baits each.

  forecastd bait count goggle-eye 40
  forecastd bait count goggle-eye 25 -source netted -another
  forecastd bait list`

func runBait(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "bait", "[count KIND N] [flags]", aboutBait)
	var s sayFlags
	s.add(fs)
	source := fs.String("source", "", "how they were come by: hooked, netted, seasoned or bought (else as before, else hooked)")
	another := fs.Bool("another", false, "count a lot of its own, beside those of the kind that were come by otherwise")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if listing(rest) {
		return s.say(ctx, w, needsOld, func(a *app.App, out io.Writer) error {
			told, err := a.Pen(ctx, s.port)
			if err == nil {
				fmt.Fprintln(out, told)
			}
			return err
		})
	}
	if rest[0] != "count" || len(rest) < 3 {
		return fail(w.stderr, exitUsage, errors.New("bait needs a kind and a count: forecastd bait count goggle-eye 40"))
	}
	n, err := strconv.Atoi(rest[len(rest)-1])
	if err != nil {
		return fail(w.stderr, exitUsage, fmt.Errorf("%q is no count: write the number last, as count goggle-eye 40", rest[len(rest)-1]))
	}
	by, err := oneOf("source", *source, models.BaitHooked, models.BaitNetted, models.BaitSeasoned, models.BaitBought)
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	return s.say(ctx, w, needs, func(a *app.App, out io.Writer) error {
		told, err := a.Bait(ctx, s.port, models.Tally{Kind: strings.Join(rest[1:len(rest)-1], " "), Count: n, Source: by, Another: *another})
		if err == nil {
			fmt.Fprintln(out, told)
		}
		return err
	})
}

// oneOf reads a word of a flag; an empty one is left out.
func oneOf[T ~string](flag, s string, words ...T) (T, error) {
	if s == "" {
		return "", nil
	}
	var all []string
	for _, w := range words {
		if strings.EqualFold(string(w), s) {
			return w, nil
		}
		all = append(all, string(w))
	}
	return "", fmt.Errorf("-%s %q is none of these: %s", flag, s, strings.Join(all, ", "))
}
