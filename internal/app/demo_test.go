package app_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
)

func demoCall(t *testing.T) app.Called {
	t.Helper()
	a, err := app.NewDemo(app.Options{}, false)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Stop(t.Context())) })
	c, err := a.CallFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	return c
}

func TestDemoCall(t *testing.T) {
	c := demoCall(t)
	fmt.Println(c.Text(false))
}
