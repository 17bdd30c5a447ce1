// Sun and moon by astronomy-engine: positions without refraction, the share
// of the moon's disc that is lit, and the day's times.
import * as A from "astronomy-engine";
import { writeFileSync } from "node:fs";

const places = [[0.0, -80.0], [25.76, -80.19], [-33.9, 18.4], [45.0, -124.0], [60.2, 5.0], [69.65, 18.96]];
const out = process.argv[2];
const hour = 3600e3, day = 24 * hour;
const iso = (d) => d.toISOString().replace(/\.\d+Z/, "Z");
const fixed = (n) => (Number.isInteger(n) ? n.toFixed(1) : String(n));

function horizon(body, date, observer) {
  const eq = A.Equator(body, date, observer, true, true);
  const h = A.Horizon(date, observer, eq.ra, eq.dec, null);
  return [h.altitude.toFixed(4), h.azimuth.toFixed(4)];
}

let text = "lat,lon,time,sun_elevation,sun_azimuth,moon_elevation,moon_azimuth,moon_lit,moon_km\n";
places.forEach(([lat, lon], i) => {
  const observer = new A.Observer(lat, lon, 0);
  for (let n = 0; n < 60; n++) {
    const t = new Date(Date.UTC(2020, 0, 3) + 61 * n * day + (5 * n + 3 * i) * hour + 7 * n * 60e3);
    const lit = A.Illumination(A.Body.Moon, t);
    const v = A.GeoMoon(t);
    const km = Math.hypot(v.x, v.y, v.z) * A.KM_PER_AU;
    text += [fixed(lat), fixed(lon), iso(t), ...horizon(A.Body.Sun, t, observer), ...horizon(A.Body.Moon, t, observer),
      lit.phase_fraction.toFixed(5), km.toFixed(0)].join(",") + "\n";
  }
});
writeFileSync(out + "/engine-positions.csv", text);

text = "lat,lon,start,sun_rise,sun_set,civil_dawn,civil_dusk,moon_rise,moon_set\n";
places.forEach(([lat, lon], i) => {
  const observer = new A.Observer(lat, lon, 0);
  for (let n = 0; n < 40; n++) {
    const start = new Date(Date.UTC(2020, 0, 5) + (91 * n + 5 * i) * day - Math.round(lon / 15) * hour);
    const find = (f) => { const t = f(); return t ? ((t.date - start) / 1000).toFixed(0) : ""; };
    const row = [fixed(lat), fixed(lon), iso(start)];
    for (const d of [+1, -1]) row.push(find(() => A.SearchRiseSet(A.Body.Sun, observer, d, start, 1)));
    for (const d of [+1, -1]) row.push(find(() => A.SearchAltitude(A.Body.Sun, observer, d, start, 1, -6)));
    for (const d of [+1, -1]) row.push(find(() => A.SearchRiseSet(A.Body.Moon, observer, d, start, 1)));
    text += row.join(",") + "\n";
  }
});
writeFileSync(out + "/engine-days.csv", text);
