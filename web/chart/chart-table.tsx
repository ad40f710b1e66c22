import { useState } from 'preact/hooks';
import { ScrollTable } from '../shell/scroll-table.tsx';

/** The numbers behind a chart as a table. Rows are computed only while it is open. */
export function ChartTable({
  caption,
  columns,
  rows,
}: {
  caption: string;
  columns: readonly string[];
  rows: () => readonly (readonly string[])[];
}) {
  const [open, setOpen] = useState(false);
  return (
    <details class="chart-table" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>Show as table</summary>
      {open && (
        <ScrollTable label={caption}>
          <table>
            <caption>{caption}</caption>
            <thead>
              <tr>
                {columns.map((column) => (
                  <th key={column} scope="col">
                    {column}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              {rows().map((row) => (
                <tr key={row[0]}>
                  {row.map((cell, i) =>
                    i === 0 ? (
                      <th key={columns[i]} scope="row">
                        {cell}
                      </th>
                    ) : (
                      <td key={columns[i]}>{cell}</td>
                    ),
                  )}
                </tr>
              ))}
            </tbody>
          </table>
        </ScrollTable>
      )}
    </details>
  );
}
