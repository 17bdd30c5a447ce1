package config

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/require"
)

func TestSecretIsNeverPrinted(t *testing.T) {
	const word = "hunter2"
	s := NewSecret(word)
	var log bytes.Buffer
	slog.New(slog.NewJSONHandler(&log, nil)).Info("x", "s", s, "in", struct{ S Secret }{s})
	asJSON, err := json.Marshal(struct{ S Secret }{s})
	require.NoError(t, err)
	asYAML, err := yaml.Marshal(struct{ S Secret }{s})
	require.NoError(t, err)
	for _, printed := range []string{
		s.String(), fmt.Sprint(s), fmt.Sprintf("%v %+v %#v %s %q %x %d", s, s, s, s, s, s, s),
		fmt.Sprintf("%+v %#v", struct{ S Secret }{s}, struct{ S *Secret }{&s}), log.String(), string(asJSON), string(asYAML),
	} {
		require.NotContains(t, printed, word)
	}
	require.Equal(t, word, s.Reveal())
	require.False(t, s.Empty())
	require.True(t, NewSecret("").Empty())
}
