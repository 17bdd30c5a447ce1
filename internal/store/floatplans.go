package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"forecastd/internal/models"
)

// FloatPlan is what a shore contact knows of a day's trip.
type FloatPlan struct {
	Port   string
	Date   models.Date
	Boat   string
	Ground string
	// People is how many are aboard.
	People      models.Opt[int]
	Leave, Back time.Time
	// Overdue is when the contact is told that the boat is not back, unless
	// it checked in.
	Overdue time.Time
	// Left is when the contact was told that the boat leaves.
	Left, CheckedIn, ToldOverdue, CalledOff models.Opt[time.Time]
}

const floatPlanColumns = "port, date, boat, ground, people, leave_at, back_at, overdue_at, left_at, checked_in_at, told_overdue_at, called_off_at"

func scanFloatPlan(rows *sql.Rows) (p FloatPlan, err error) {
	return p, rows.Scan(&p.Port, toText(&p.Date), &p.Boat, &p.Ground, toInteger(&p.People), toTime(&p.Leave), toTime(&p.Back), toTime(&p.Overdue),
		toOptTime(&p.Left), toOptTime(&p.CheckedIn), toOptTime(&p.ToldOverdue), toOptTime(&p.CalledOff))
}

// PlanFloat keeps a day's plan, or changes it: new times are told anew when
// overdue. What has happened (left, checked in) stays.
func (s *Store) PlanFloat(ctx context.Context, p FloatPlan) error {
	const doing = "keep a float plan"
	if !p.Back.After(p.Leave) || p.Overdue.Before(p.Back) {
		return fmt.Errorf("%s: the boat leaves, is back, and is overdue, in that order", doing)
	}
	return s.change(ctx, doing, "INSERT INTO float_plans ("+floatPlanColumns+`) VALUES (?,?,?,?,?,?,?,?,NULL,NULL,NULL,NULL)
		ON CONFLICT (port, date) DO UPDATE SET boat = excluded.boat, ground = excluded.ground, people = excluded.people, leave_at = excluded.leave_at, back_at = excluded.back_at,
			told_overdue_at = iif(overdue_at = excluded.overdue_at, told_overdue_at, NULL), overdue_at = excluded.overdue_at, called_off_at = NULL`,
		p.Port, p.Date.String(), p.Boat, p.Ground, integer(p.People), at(p.Leave), at(p.Back), at(p.Overdue))
}

// FloatPlan returns the plan of a day.
func (s *Store) FloatPlan(ctx context.Context, port string, date models.Date) (FloatPlan, error) {
	return one(ctx, s.read, fmt.Sprintf("read the float plan of %s", date), scanFloatPlan,
		"SELECT "+floatPlanColumns+" FROM float_plans WHERE port = ? AND date = ?", port, date.String())
}

// OpenFloatPlans returns the plans whose boat has not checked in, nor been
// called off, earliest first.
func (s *Store) OpenFloatPlans(ctx context.Context) ([]FloatPlan, error) {
	return list(ctx, s.read, "read float plans", scanFloatPlan,
		"SELECT "+floatPlanColumns+" FROM float_plans WHERE checked_in_at IS NULL AND called_off_at IS NULL ORDER BY leave_at, port")
}

// FloatEvent is something that happens to a float plan.
type FloatEvent string

// Events of a float plan.
const (
	FloatLeft      FloatEvent = "left_at"
	FloatCheckedIn FloatEvent = "checked_in_at"
	FloatOverdue   FloatEvent = "told_overdue_at"
	FloatCalledOff FloatEvent = "called_off_at"
)

// MarkFloat keeps when something happened to a plan, the first time; told
// again it changes nothing.
func (s *Store) MarkFloat(ctx context.Context, port string, date models.Date, e FloatEvent, when time.Time) error {
	switch e {
	case FloatLeft, FloatCheckedIn, FloatOverdue, FloatCalledOff:
	default:
		return fmt.Errorf("mark a float plan: there is no event %q", e)
	}
	return s.change(ctx, fmt.Sprintf("mark the float plan of %s", date),
		fmt.Sprintf("UPDATE float_plans SET %[1]s = coalesce(%[1]s, ?) WHERE port = ? AND date = ?", e), at(when), port, date.String())
}
