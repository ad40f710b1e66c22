export function LabelPage({ spoolId }: { spoolId: number }) {
  return <p>{spoolId}</p>;
}
