package config

import (
	"testing"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"
)

func TestExampleLoads(t *testing.T) {
	c, err := Load("example.yaml", Example())
	require.NoError(t, err)
	require.Equal(t, "Second Light", c.Boat.Name)
}
