import type { JSX } from "preact";
import type { Refusal } from "../wire";

/** What could not be understood: file, line and column, the line itself, what to do. */
export function Refused({ refused }: { refused: Refusal[] }): JSX.Element {
  return (
    <section class="sheet refused" role="alert" aria-label="What could not be read">
      <h2>This cannot be read yet</h2>
      <ol>
        {refused.map((one, number) => (
          <li key={number}>
            <p>
              <b>{one.problem}</b>
              <span class="where">
                {one.file}
                {one.line ? `, line ${one.line}` : ""}
                {one.column ? `, column ${one.column}` : ""}
              </span>
            </p>
            {one.text ? (
              <pre>
                {one.text}
                {one.column ? `\n${" ".repeat(Math.max(one.column - 1, 0))}^` : ""}
              </pre>
            ) : null}
            <p class="remedy">{one.remedy}</p>
          </li>
        ))}
      </ol>
    </section>
  );
}
