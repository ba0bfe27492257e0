import type { JSX } from "preact";
import type { Finding } from "../wire";
import { clock } from "./plan";

/** What the pins on the board say, for whom a picture says nothing. */
export function FindingsTable({ findings }: { findings: Finding[] }): JSX.Element {
  return (
    <div class="table" tabIndex={0} role="region" aria-label="The findings as a table">
      <table>
        <thead>
          <tr>
            {["Pin", "Kind", "What", "Found", "Limit", "Right of the corner", "Back of it", "Line", "Minute"].map((one) => (
              <th key={one} scope="col">
                {one}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {findings.map((one, k) => (
            <tr key={one.id}>
              <th scope="row">{k + 1}</th>
              <td>{one.severity}</td>
              <td>{one.words}</td>
              <td>{one.number_words}</td>
              <td>{one.limit_words}</td>
              <td class="place">{one.place_words[0]}</td>
              <td class="place">{one.place_words[1]}</td>
              <td>{one.line || ""}</td>
              <td>{one.time_s === null ? "" : clock(one.time_s)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
